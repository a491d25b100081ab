"""What a run came to, written for people (terminal) and for other programs (SARIF)."""
