"""Second opinions: the program's figures against those of independent, well-known meters, in one run on one take.

Each meter is asked on the files themselves, and each check says which version agreed how closely when it was written.
"""
