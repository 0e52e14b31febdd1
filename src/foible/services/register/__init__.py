"""The register: what is done with items, jobs, parts and people, and what they teach. Each kind of work has a module."""
