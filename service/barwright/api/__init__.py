"""HTTP: translate, call one workflow, translate back."""
