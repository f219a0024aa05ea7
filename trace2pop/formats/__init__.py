"""Values to bytes. No decisions, no clock."""
