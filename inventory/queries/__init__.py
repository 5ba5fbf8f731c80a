"""What each screen needs to read. Nothing here writes."""
