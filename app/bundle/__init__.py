"""What a tablet carries: the sheet's templates as JavaScript, the rules, styles and scripts, under one hash."""
