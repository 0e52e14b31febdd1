"""Commands of the control table."""
