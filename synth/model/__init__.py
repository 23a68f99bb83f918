"""The constraint model: one-pass synthesis of item network and wiring (design notes, "The constraint model")."""
