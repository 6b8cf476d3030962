"""A project's calendar as a feed: a secret address that calendar programs read again and again, without a key."""
