"""The commands, one a module, each with a function of its own name. Modules import only typer at the top:
everything heavy is imported inside the function, so that `--help` and mistakes answer at once.
"""
