"""What a job took, and what that teaches."""
