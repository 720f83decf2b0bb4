"""What people call things in the sky, and how a name or coordinates find the thing."""
