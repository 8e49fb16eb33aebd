// Arithmetic that is recorded once and repeated on other values.
//
// The elimination of a network's algebraic part is the same sequence of operations at every operating point
// and for every sample. It is therefore done once on `Traced` numbers, which write each operation on a
// `Tape`; afterwards Tape::run repeats it as straight-line code. A traced number also carries its image in
// the field of integers modulo the prime 2^61 − 1, where every element value is a fixed random residue. An
// expression that is zero there is zero identically (the chance of an accident is n/2^61, Schwartz and
// Zippel), so ranks are decided exactly, without a tolerance.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace ringquell::internal {

struct Traced {
    int slot = -1;
    double value = 0;
    std::uint64_t residue = 0;
    bool is_zero() const { return residue == 0; }
};

class Tape {
  public:
    /// A new input with its value; equal values have equal residues, so that what cancels for equal parts is
    /// known to.
    Traced input(double value);
    Traced negative(const Traced& a);
    Traced add(const Traced& a, const Traced& b);
    Traced multiply(const Traced& a, const Traced& b);
    Traced divide(const Traced& a, const Traced& b);
    /// a − b·c; `a` may be the empty Traced (zero).
    Traced subtract_product(const Traced& a, const Traced& b, const Traced& c);

    int inputs() const { return inputs_; }
    std::size_t size() const { return static_cast<std::size_t>(inputs_) + code_.size(); }
    /// values: size() numbers, the first inputs() of them given; the rest is written.
    template <class T>
    void run(T* values) const {
        T* out = values + inputs_;
        for (const Instruction& i : code_) {
            switch (i.op) {
                case Op::negative:
                    *out = -values[i.a];
                    break;
                case Op::add:
                    *out = values[i.a] + values[i.b];
                    break;
                case Op::multiply:
                    *out = values[i.a] * values[i.b];
                    break;
                case Op::divide:
                    *out = values[i.a] / values[i.b];
                    break;
                case Op::subtract_product:
                    *out = values[i.a] - values[i.b] * values[i.c];
                    break;
                case Op::negative_product:
                    *out = -(values[i.b] * values[i.c]);
                    break;
            }
            ++out;
        }
    }

    /// The operations in order; the i-th writes number inputs() + i.
    enum class Op : std::uint8_t { negative, add, multiply, divide, subtract_product, negative_product };
    struct Instruction {
        Op op;
        int a, b, c;
    };
    const std::vector<Instruction>& code() const { return code_; }

  private:
    Traced record(Op op, const Traced& a, const Traced& b, const Traced& c, double value,
                  std::uint64_t residue);
    int inputs_ = 0;
    std::vector<Instruction> code_;
};

}  // namespace ringquell::internal
