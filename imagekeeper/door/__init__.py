"""The public door: what `import imagekeeper` gives a program, made of the jobs; plain values in, frozen results out."""
