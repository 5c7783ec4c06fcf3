"""The verification programme: every check of the project against something outside it."""
