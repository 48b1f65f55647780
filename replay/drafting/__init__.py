"""A first patch for a folder of tracks, from an input list as people keep it or from the tracks alone.

    list (CSV, XLSX) --> grid --> headings --> layout --> lines --> inputs --.
                                                                              >--> placing --> patch.toml, inputs.csv
    folder of tracks --> take (numbers, names, what a nameless track sounds like) --'

Whatever was guessed on the way is noted (`notes`), told on the terminal and written beside what it is about. What
nothing says stays blank: no gain, phantom power or pad is ever made up.
"""
