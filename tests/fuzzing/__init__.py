"""Coverage-guided fuzzing of every reader, by hand: see DEVELOPERS.md. pytest collects nothing here."""
