"""Work done side by side, in processes that can be killed, on this machine or on several."""
