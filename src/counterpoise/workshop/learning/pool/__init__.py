"""What workshops share: counts signed by each, merged in any order, judged before they count."""
