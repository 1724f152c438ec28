"""What a job came to, for programs and for people."""
