"""What each command does, between the command line and the pipeline."""
