"""After: what a job really took, and what that teaches the next one."""
