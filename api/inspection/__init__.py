"""Who fitted and who saw each joint and bracket: the report of a level for whoever signs."""
