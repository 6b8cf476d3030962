"""Running the service: its logs, metrics, and whether it is alive and ready."""
