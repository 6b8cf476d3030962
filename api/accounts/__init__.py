"""Who may do what: companies, API keys, roles, rates."""
