// Reductions of boundary pencils, recorded once for networks of one structure.
#pragma once

#include <memory>
#include <vector>

#include "network/structure.h"
#include "numerics/pencil_reduction.h"

namespace ringquell::internal {

class BoundaryCache {
  public:
    enum class Pencil { axis, ray, circle };
    struct Entry {
        Pencil pencil;
        std::vector<double> extra;  // ray or radius
        size_t element;
        NetworkStructure structure;
        /// Null: the pencil is singular, the element moves no mode.
        std::unique_ptr<PencilReduction> reduction;
    };

    /// Null where none is recorded yet. The varied element's own value does not matter.
    const Entry* find(Pencil pencil, const std::vector<double>& extra, size_t element,
                      const Network& network) const {
        for (const Entry& e : entries_)
            if (e.pencil == pencil && e.extra == extra && e.element == element && e.structure.fits(network))
                return &e;
        return nullptr;
    }
    const Entry& keep(Entry entry) {
        constexpr size_t most = 32;
        if (entries_.size() >= most) entries_.erase(entries_.begin());
        entries_.push_back(std::move(entry));
        return entries_.back();
    }

  private:
    std::vector<Entry> entries_;
};

}  // namespace ringquell::internal
