// A whole file as text.
#pragma once

#include <cstddef>
#include <string>

namespace ringquell::internal {

/// Throws InputError where it cannot be read, is a directory, or exceeds `largest_bytes`, a number of MiB
/// (`exceeds 8 MiB; expected an impedance curve`, where `expected` is what stands last). Of a pipe without end no more
/// than that is read.
std::string text_of_file(const std::string& path, std::size_t largest_bytes, const std::string& expected);

}  // namespace ringquell::internal
