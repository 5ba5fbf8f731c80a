"""What people type, checked and turned into the values that actions take."""
