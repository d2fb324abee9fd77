"""What the body says: mornings, nights and check-ins against the athlete's own baseline."""
