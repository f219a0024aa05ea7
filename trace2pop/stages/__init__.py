"""The eight stages from picture to guide; none knows another."""
