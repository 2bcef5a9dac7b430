"""The guides: Markdown files beside the pages that show them, one folder a language."""
