#include "numerics/tape.h"

#include <cassert>

#include "numerics/modular.h"

namespace ringquell::internal {

Traced Tape::input(double value) {
    assert(code_.empty());
    return {inputs_++, value, modular::residue(value)};
}

Traced Tape::record(Op op, const Traced& a, const Traced& b, const Traced& c, double value,
                    std::uint64_t residue) {
    code_.push_back({op, a.slot, b.slot, c.slot});
    return {static_cast<int>(size()) - 1, value, residue};
}

Traced Tape::negative(const Traced& a) {
    return record(Op::negative, a, a, a, -a.value, modular::subtract(0, a.residue));
}
Traced Tape::add(const Traced& a, const Traced& b) {
    return record(Op::add, a, b, b, a.value + b.value, modular::add(a.residue, b.residue));
}
Traced Tape::multiply(const Traced& a, const Traced& b) {
    return record(Op::multiply, a, b, b, a.value * b.value, modular::multiply(a.residue, b.residue));
}
Traced Tape::divide(const Traced& a, const Traced& b) {
    assert(!b.is_zero());
    return record(Op::divide, a, b, b, a.value / b.value,
                  modular::multiply(a.residue, modular::inverse(b.residue)));
}
Traced Tape::subtract_product(const Traced& a, const Traced& b, const Traced& c) {
    const std::uint64_t product = modular::multiply(b.residue, c.residue);
    if (a.slot < 0)
        return record(Op::negative_product, b, b, c, -(b.value * c.value), modular::subtract(0, product));
    return record(Op::subtract_product, a, b, c, a.value - b.value * c.value,
                  modular::subtract(a.residue, product));
}

}  // namespace ringquell::internal
