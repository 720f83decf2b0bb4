"""Which stars to sight, and what they would buy."""
