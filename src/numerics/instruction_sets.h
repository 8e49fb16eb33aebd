// One kernel, compiled once for each instruction set; the widest that the processor has is taken when the program runs.
//
// A kernel is a file that is included three times, each time within a namespace named after the set:
//
//   #define RINGQUELL_KERNEL "room/kernel.inc"
//   #include "numerics/each_instruction_set.inc"
//   ...
//   constexpr PerSet<Function> kernels = RINGQUELL_PER_SET(function);
//   on_lanes(widest_set(), lanes, kernels, [&](Function* function, int first_lane) { ... });
//
// It may call only built-in operations: an inline function of the standard library would be compiled for the first set
// that comes along and used for all. What must round alike on every set is compiled with -ffp-contract=off.
#pragma once

#include <array>
#include <cstddef>

#if defined(__x86_64__)
#define RINGQUELL_X86 1
#endif

#define RINGQUELL_PRAGMA(text) _Pragma(#text)
#if defined(__clang__)
#define RINGQUELL_BEGIN_SET(features) \
    RINGQUELL_PRAGMA(clang attribute push(__attribute__((target(features))), apply_to = function))
#define RINGQUELL_END_SET RINGQUELL_PRAGMA(clang attribute pop)
#define RINGQUELL_BEGIN_AVX512 RINGQUELL_BEGIN_SET("avx512f,avx512vl,avx512dq")
#else
#define RINGQUELL_BEGIN_SET(features) \
    RINGQUELL_PRAGMA(GCC push_options) RINGQUELL_PRAGMA(GCC target(features))
#define RINGQUELL_END_SET RINGQUELL_PRAGMA(GCC pop_options)
// Otherwise GCC cuts loops over lanes to half a register.
#define RINGQUELL_BEGIN_AVX512 RINGQUELL_BEGIN_SET("avx512f,avx512vl,avx512dq,prefer-vector-width=512")
#endif
#define RINGQUELL_BEGIN_AVX2 RINGQUELL_BEGIN_SET("avx2,fma")

namespace ringquell::internal {

enum class InstructionSet { baseline, avx2, avx512 };

/// Doubles that a register holds. GCC cuts a wider pack into pieces, at four times the time (eight lanes on AVX2,
/// measured).
constexpr int width_of(InstructionSet set) {
    return set == InstructionSet::avx512 ? 8 : set == InstructionSet::avx2 ? 4 : 2;
}

/// Does this processor have the set?
inline bool available(InstructionSet set) {
#if defined(RINGQUELL_X86)
    if (set == InstructionSet::avx2) return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
    if (set == InstructionSet::avx512)
        return __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
               __builtin_cpu_supports("avx512dq");
#endif
    return set == InstructionSet::baseline;
}

/// The widest that this processor has.
inline InstructionSet widest_set() {
    static const InstructionSet widest = available(InstructionSet::avx512) ? InstructionSet::avx512
                                         : available(InstructionSet::avx2) ? InstructionSet::avx2
                                                                           : InstructionSet::baseline;
    return widest;
}

/// The same function of every set, in the order of InstructionSet.
template <class Function>
using PerSet = std::array<Function*, 3>;
#if defined(RINGQUELL_X86)
#define RINGQUELL_PER_SET(function) \
    { baseline::function, avx2::function, avx512::function }
#else
#define RINGQUELL_PER_SET(function) \
    { baseline::function, nullptr, nullptr }
#endif

/// Calls some(the set's function, first lane) for as many groups of lanes as make up `lanes`.
template <class Function, class Some>
void on_lanes(InstructionSet set, int lanes, const PerSet<Function>& functions, Some some) {
    for (int k = 0; k < lanes; k += width_of(set)) some(functions[static_cast<std::size_t>(set)], k);
}

}  // namespace ringquell::internal
