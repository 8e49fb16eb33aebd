#pragma once

namespace ringquell {

/// What an element of a network is, in either of its two matrices.
enum class ElementKind { resistance, conductance, inductance, capacitance, transconductance, mutual };

}  // namespace ringquell
