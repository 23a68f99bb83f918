"""Pages in a real browser (Chromium, headless, driven by playwright), and conformance checkers for what they hold."""
