"""What the addresses for programs share."""
