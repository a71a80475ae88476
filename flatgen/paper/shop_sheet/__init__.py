"""The shop sheet: a part with its blank, bends, stages and checks on framed pages."""
