"""Dumps: bytes → lines → statements.  Knows shapes of lines, and no setting."""
