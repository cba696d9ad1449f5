"""Pictures as marks and documents as parts: drawn once, then written as SVG, PNG, HTML or PDF."""
