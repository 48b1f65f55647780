"""A short take whose every track names itself, to find out what the desk's returns do; and reading it back."""
