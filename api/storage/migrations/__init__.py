"""The migrations, run by `Storage.upgrade`."""
