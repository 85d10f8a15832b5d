"""A garden's state now and its days ahead, for all trees and all members."""
