"""Planning in the background: jobs that outlive the process that makes them."""
