"""The schemes: each an item network and what its locks must do, when (design notes, "Schemes"). One module a scheme."""
