"""Plans: made at once or in the background, read, watched, cancelled, and shown in every form."""
