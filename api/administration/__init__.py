"""What an administrator reads: who did what."""
