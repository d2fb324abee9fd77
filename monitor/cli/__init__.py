"""The commands: what is typed in, what is printed. No decision is made here."""
