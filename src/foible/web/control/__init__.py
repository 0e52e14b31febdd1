"""Pages of the control table."""
