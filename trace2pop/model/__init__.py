"""The frozen values the stages hand on, in millimetres. Nothing here computes."""
