"""What listening, playing and writing share: samples of a take in order of time, wave files, devices, the thread that
reads ahead, the limiter, the keys of a terminal.

sounddevice and soxr are imported in the functions that need them, the compiled reader with `reading`.
"""
