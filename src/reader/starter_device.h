// The device of a starter case: what a datasheet states of it, and typical values for the rest.
#pragma once

#include "reader/datasheet.h"
#include "reader/starter_text.h"
#include "reader/typical.h"

namespace ringquell::internal {

/// A switch of such devices in parallel.
struct StarterSwitch {
    StarterSwitch(const Datasheet& of, int n);
    Datasheet sheet;
    int positions;
    Typical typical;
    double rated_a;  // of one device
    double size;     // of one device, as its rated current to that of the typical one
    double high_v;   // the drive's
    /// The output capacitance of one device.
    double output_f() const;
};

/// `device:` with all below it.
void write_device(StarterText& out, const StarterSwitch& of);

}  // namespace ringquell::internal
