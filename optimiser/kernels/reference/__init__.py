"""What each compiled kernel does, written to be read: its specification, its judge in the tests, its stand-in.

A function here has the name of its C function and gives exactly the same result, ties included, for every input.
"""
