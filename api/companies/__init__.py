"""What an operator does with a company's data as a whole: hands it over, erases it, ends its retention."""
