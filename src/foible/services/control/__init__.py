"""What the control table's pages and commands call."""
