"""SQLite as Django knows it, but for how one waits to write; Django looks for it in `base`."""
