// Recorded arithmetic: the same on other values, and what it knows to be zero.
#include "numerics/tape.h"

#include <doctest/doctest.h>

#include <array>
#include <cstdint>
#include <vector>

#include "numerics/modular.h"

using namespace ringquell;
using namespace ringquell::internal;

TEST_CASE("what was recorded on one set of values is the same formula on another") {
    // (a·b + c)/(a − b·c), and its negative.
    Tape tape;
    const Traced a = tape.input(2), b = tape.input(3), c = tape.input(5);
    const Traced quotient = tape.divide(tape.add(tape.multiply(a, b), c), tape.subtract_product(a, b, c));
    const Traced negative = tape.negative(quotient);
    CHECK(quotient.value == 11.0 / -13.0);
    std::vector<double> numbers(tape.size());
    for (const auto& [x, y, z] : {std::array{2.0, 3.0, 5.0}, std::array{-0.5, 7.0, 0.25}}) {
        numbers[0] = x, numbers[1] = y, numbers[2] = z;
        tape.run(numbers.data());
        CHECK(numbers[static_cast<size_t>(quotient.slot)] == (x * y + z) / (x - y * z));
        CHECK(numbers[static_cast<size_t>(negative.slot)] == -(x * y + z) / (x - y * z));
    }
}

TEST_CASE("what cancels whatever the values are is zero, and what cancels by rounding or by chance is not") {
    Tape tape;
    const Traced a = tape.input(0.1), b = tape.input(0.2), c = tape.input(0.3), e = tape.input(0.02);
    const Traced f = tape.input(0.7), g = tape.input(0.7);
    const Traced ab = tape.multiply(a, b), ba = tape.multiply(b, a);
    CHECK(tape.add(ab, tape.negative(ba)).is_zero());
    // ((a + b)·c − a·c) − b·c
    const Traced left = tape.subtract_product(tape.multiply(tape.add(a, b), c), a, c);
    const Traced none = tape.subtract_product(left, b, c);
    CHECK(none.is_zero());
    // 0.1·0.2 is 0.02 as real numbers: of these values alone.
    CHECK(!tape.add(ab, tape.negative(e)).is_zero());
    // Equal inputs are one.
    CHECK(tape.add(f, tape.negative(g)).is_zero());
}

TEST_CASE("an inverse modulo 2^61 − 1 times its number is one") {
    for (const std::uint64_t x :
         {std::uint64_t{1}, std::uint64_t{2}, modular::prime - 1, modular::residue(4.7e-9)}) {
        CHECK(modular::multiply(x, modular::inverse(x)) == 1);
        CHECK(modular::add(x, modular::subtract(0, x)) == 0);
    }
    CHECK(modular::add(modular::residue(-3.5), modular::residue(3.5)) == 0);
    // (2^60)² = 2^120 = 2^(120 − 61) = 2^59
    CHECK(modular::multiply(std::uint64_t{1} << 60, std::uint64_t{1} << 60) == std::uint64_t{1} << 59);
}
