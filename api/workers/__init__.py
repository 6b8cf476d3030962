"""Worker processes: they take jobs from the queue, run their steps, and take over from workers that died."""
