"""The commands: each in a room of its own, all of the same shape (`base.Command`)."""
