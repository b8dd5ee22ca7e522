"""The plan on paper and screen: SVG, HTML, PDF, CSV, plan.json."""
