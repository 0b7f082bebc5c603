"""What people do: one function is one action in one transaction."""
