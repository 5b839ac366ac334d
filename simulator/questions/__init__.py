"""What people ask; each module composes the rooms before it and answers one command."""
