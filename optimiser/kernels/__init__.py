"""The inner loops: in plain C, each with a readable reference beside it, behind one typed binding.

`bindings` is the way in. `reference/` says what each kernel does, judges it in the tests and stands in for it where
no library is built. Nothing here knows buildings: arrays of integers go in and come out.
"""
