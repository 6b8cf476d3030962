"""Orders that were issued: frozen under a revision number, each bound to the one before by its hash."""
