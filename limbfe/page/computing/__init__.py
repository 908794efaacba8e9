"""What the page has computed: by processes of their own, told in the words of the report."""
