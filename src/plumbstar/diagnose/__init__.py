"""What went wrong, what many evenings teach of the mount, bench checks, and the stop."""
