//! Enthalpy of air in chemical equilibrium: 0 at 0 K, dissociated where it dissociates.
