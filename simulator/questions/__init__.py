"""What people ask besides the main job; one file a command."""
