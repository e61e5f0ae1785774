//! Where cable goes: weighted ground, lines as trees or chains, lengths, cut lists.
