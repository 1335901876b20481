"""One file is one thing a user does: it joins the parts and holds no formulas."""
