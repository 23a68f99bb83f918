"""Pictures as SVG text (W3C SVG 2): plans, views, waves, charts. Every text and name is escaped by how it is built."""
