"""What a job costs, and what is asked."""
