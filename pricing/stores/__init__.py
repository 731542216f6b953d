"""Stock, kit, suppliers, packs and orders."""
